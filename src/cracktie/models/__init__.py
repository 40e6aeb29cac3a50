"""Published models, one file per document and topic; importing a file registers its models."""
