"""What each stage of a job shows and takes, one module each; ``web.stages`` lists them."""
