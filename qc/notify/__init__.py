"""E-mail notices of matters that opened or opened again."""
