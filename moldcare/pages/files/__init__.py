"""Photos and documents, served to whoever is signed in and to nobody else."""
