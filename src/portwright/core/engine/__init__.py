"""What a port does on an engine: quick answers from first principles, and cases to simulate."""
