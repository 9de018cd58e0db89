"""A real server under load: many clients, expensive requests, slow connections, large bodies."""
