"""What a person sees: circuits as drawings, washouts as charts, answers as sentences."""
