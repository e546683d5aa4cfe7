"""Judge an installation: run plain rules in every world that the evidence allows."""
