"""The search: order, hands, routes, motions."""

from handfast.planning.plan import plan

__all__ = ["plan"]
