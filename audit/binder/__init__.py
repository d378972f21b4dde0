"""The binder of one clinic: contents as data first, drawn afterwards (see `contents` and `pdf`)."""
