"""Where the functions are offered: each host builds its interface from the registry."""
