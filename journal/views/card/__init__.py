"""Recipe cards."""
