"""Care rules, completions and standings."""
