"""The emissions account: landfill methane avoided, less what the project emits."""
