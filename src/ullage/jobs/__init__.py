"""What can a person do with a job, from the first look at a machine to the filed record?"""
