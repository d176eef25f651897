"""A plan set out: conducts lining, start, joints, tiles; findings; alternatives side by side."""
