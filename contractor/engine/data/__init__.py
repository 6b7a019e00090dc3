"""Tables that the engine reads: each names its source and edition."""
