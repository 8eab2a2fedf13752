"""Search: order, hands, routes and motions of a two-hand chart."""
