"""What the verifier looks at, one question a module; shares no code with what makes layouts."""
