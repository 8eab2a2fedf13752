"""Error chains, insertion and touches: what the fit ledger is made from."""
