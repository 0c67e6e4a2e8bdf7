"""Published figures as data, each row with its source."""
