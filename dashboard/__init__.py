"""Pages over the answers of `qc.reports`: they show, they never compute."""
