"""Run logs and measurements in, proposed error sources out."""
