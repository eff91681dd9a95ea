"""What the readings taken at a machine tell about where old fluid still is."""
