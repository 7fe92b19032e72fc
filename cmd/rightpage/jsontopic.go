package main

import (
	_ "embed"

	"github.com/spf13/cobra"
)

//go:embed json.txt
var jsonText string

// jsonTopic is a help topic: what --format json prints.
func jsonTopic() *cobra.Command {
	return &cobra.Command{Use: "json", Short: "What --format json prints, command by command", Long: jsonText}
}
