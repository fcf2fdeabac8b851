"""The message API: the door through which any gateway brings messages in and takes unasked ones out."""
