"""The one way in: files are read, their rows typed and doubted, and kept or held. `qc.ingest.run.ingest`."""
