"""When the air at the bench has settled, and what the mean of a settled stretch is worth."""
