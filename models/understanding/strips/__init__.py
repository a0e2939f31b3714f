"""Things taken apart and put together in other voices, with fasteners and readings marked; all invented."""
