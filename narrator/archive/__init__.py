"""Working through a large archive of sessions: on this machine alone, or spread over many workers."""
