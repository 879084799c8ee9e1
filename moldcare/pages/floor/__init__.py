"""Forms for what happens at the press, the bench and the rack."""
