"""The command line: one command per verb, findings and charts shown in the terminal."""
