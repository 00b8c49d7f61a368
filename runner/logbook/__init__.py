"""The stored events of every run: written before anything is said because of them."""
