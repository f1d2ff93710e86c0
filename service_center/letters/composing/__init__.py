"""What letters say, and the messages that they go out as."""
