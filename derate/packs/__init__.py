"""Rule packs: rules, tables, assumptions and trials, read and checked. Judging itself is elsewhere."""
