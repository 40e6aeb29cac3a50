"""Published material laws of concrete and steel."""
