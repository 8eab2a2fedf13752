"""Where arms and holders stand: what each arm reaches of what the product needs, and where they would stand
better."""
