"""Strip-downs and refits told in other voices, with fasteners, readings and the ledger marked; all invented."""
