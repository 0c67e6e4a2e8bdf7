"""Pure calculations: quantities in, quantities out; no clock, no disk, no database."""
