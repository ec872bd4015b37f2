"""What a tester can ask for: a module for each command, and what several of them share."""
