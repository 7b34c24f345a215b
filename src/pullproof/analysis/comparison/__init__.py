"""Two sets of pulls: what did the change do?"""
