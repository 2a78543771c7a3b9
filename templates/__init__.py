"""Page templates; installed as the package `batch.templates`."""
