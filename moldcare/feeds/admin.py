"""Tables of moldcare.feeds in the admin: read-only."""

from moldcare.feeds import models
from moldcare.plant.read_only import look_at

look_at(
    models.ImportBatch,
    models.ImportRow,
    models.RowMended,
    models.BroughtIn,
    models.ImportUndone,
    models.ColumnMatch,
    models.Upload,
    models.UploadLook,
    models.UploadRow,
    models.Token,
)
