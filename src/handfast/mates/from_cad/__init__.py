"""Parts, fasteners and mates recognised in an assembly that was drawn put together."""
