"""What an archive may be refused for."""

from moldcare.core.errors import DomainError


class ArchiveRefused(DomainError):
    """An archive cannot be read in as it stands; nothing was written."""
