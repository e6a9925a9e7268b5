"""What an editor is told while somebody types: findings at their place, stresses of a part, names, lines to paste."""
