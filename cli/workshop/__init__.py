"""What an editor of the knowledge does at the terminal: one module for each `hertzwright knowledge ACTION`."""
