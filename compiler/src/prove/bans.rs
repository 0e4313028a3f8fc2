//! Findings whose bans together leave no tool.
