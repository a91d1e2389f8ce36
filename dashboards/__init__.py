"""What a person sees: commands, terminal, pages, exports."""
