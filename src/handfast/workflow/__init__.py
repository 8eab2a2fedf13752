"""The verbs an engineer uses, records in, records out."""
