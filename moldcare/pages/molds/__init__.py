"""The list of molds, and the page of one mold."""
