"""Who is here, who rests, whom to watch next."""
