"""The rules that turn a Project into a CheckedProject."""
