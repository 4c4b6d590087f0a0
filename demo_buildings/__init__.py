"""Three invented buildings to try the package on, and the script that makes them."""
