"""The page of one care rule, and the forms around it."""
