"""What the pages say: rows, facts and sentences made from figures and from the tester's words."""
