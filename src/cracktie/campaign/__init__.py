"""The campaign folder: its schema, reader, writer, checks, geometry of specimens and instrument layouts."""
