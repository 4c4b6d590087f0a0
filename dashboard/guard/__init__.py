"""What the log's file has lost, said on every open page, with the two ways out."""
