"""Words for homeowners and the ways they travel."""
