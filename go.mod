module fairframe

go 1.26.8

require (
	github.com/agnivade/levenshtein v1.2.2
	github.com/fogleman/gg v1.3.0
	github.com/rogpeppe/go-internal v1.16.0
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3
	github.com/schollz/progressbar/v3 v3.19.1
	github.com/spf13/pflag v1.0.10
	github.com/u2takey/ffmpeg-go v0.5.0
	go.yaml.in/yaml/v3 v3.0.6
	golang.org/x/image v0.47.0
	golang.org/x/sys v0.50.0
	golang.org/x/term v0.48.0
	golang.org/x/text v0.43.0
	gonum.org/v1/gonum v0.17.0
)

require (
	github.com/aws/aws-sdk-go v1.55.8 // indirect
	github.com/golang/freetype v0.0.0-20170609003504-e2365dfdc4a0 // indirect
	github.com/jmespath/go-jmespath v0.4.0 // indirect
	github.com/mitchellh/colorstring v0.0.0-20190213212951-d06e56a500db // indirect
	github.com/rivo/uniseg v0.4.7 // indirect
	github.com/u2takey/go-utils v0.3.1 // indirect
	golang.org/x/tools v0.51.0 // indirect
)
