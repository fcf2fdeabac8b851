"""Who is who in a club, who may see what, and what a hall folder says of it."""
