"""Ways in, precedence and grasps from the assembled geometry."""
