"""Where each part comes from: boards, parts, rules, layouts and their proof. Pure values, no pictures."""
