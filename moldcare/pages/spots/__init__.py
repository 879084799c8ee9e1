"""The page of a press, bench or storage place: what its label opens."""
