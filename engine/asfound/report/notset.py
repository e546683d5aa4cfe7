"""What is raised when a document cannot be set."""


class NotSet(Exception):
    """The document could not be set; the text says why."""
