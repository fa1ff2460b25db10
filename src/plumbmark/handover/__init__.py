"""What is handed to people: the answer in words and the picture page."""
