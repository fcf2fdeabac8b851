"""What an award asks: the models, the scheme file and its checks, the standard cards."""
