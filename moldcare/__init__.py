"""moldcare: keeps injection molds from stopping production."""
