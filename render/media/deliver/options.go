package deliver

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"fairframe/render/media/graph"
)

// A comparison file may add output options of its own. Such a file may come from
// a stranger, and ffmpeg's options can read and write any file, so only options
// that steer an encoder are let through: by name, with one value each, and a
// value that cannot name a file of consequence. Whatever would change what the
// clip shows (size, rate, filters, streams, tags, container) is the program's.

// plainOptions take a number, or a word.
var plainOptions = strings.Fields(`crf crf_max qp cq q qscale global_quality b maxrate minrate bufsize
	preset tune profile level tier g keyint_min sc_threshold bf b_strategy refs slices threads
	qmin qmax qdiff qcomp i_qfactor b_qfactor trellis subq me_method me_range motion-est cmp subcmp
	aq-mode aq-strength psy psy-rd rc-lookahead mbtree weightp weightb deblock 8x8dct fast-pskip direct-pred partitions
	nal-hrd bluray-compat intra-refresh coder context slicecrc
	rc rc_mode multipass spatial-aq temporal-aq spatial_aq temporal_aq b_ref_mode surfaces low_power look_ahead look_ahead_depth
	qp_i qp_p qp_b usage vbaq allow_sw realtime prio_speed
	deadline cpu-used row-mt tile-columns tile-rows tiles frame-parallel lag-in-frames arnr-maxframes arnr-strength auto-alt-ref lossless
	quality compression_level pred bits_per_mb quant_mat mbd
	vbr cutoff aac_coder`)

// paramFiles are parameters of these libraries that open files, by any part of
// their name, or that say what the pictures are, which is the program's to say.
var paramFiles = regexp.MustCompile(`file|stats|csv|dump|log|recon|load|save|analysis|zones|qpfile|scaling-list|dhdr|rpu|dolby|nalu|lambda|clbin|opencl|cqm|pools|output|input|frames|fps|sar|res|csp|depth|profile|range|colo|transfer|prim|matrix|master|cll|hdr|chromaloc|seek|field|interlace|annexb|repeat-headers|atc|vui|timecode|timebase|numa|film-grain|fgs`)

var (
	optionForm = regexp.MustCompile(`^-([A-Za-z0-9_-]+)(:[va](:0)?)?$`)
	valueForm  = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_.+-]{0,39}$|^-?[0-9]{1,9}(\.[0-9]{1,9})?$|^-?[0-9]{1,3}(\.[0-9]{1,3})?[:,]-?[0-9]{1,3}(\.[0-9]{1,3})?$`)
	paramForm  = regexp.MustCompile(`^[A-Za-z0-9-]{1,40}(=[A-Za-z0-9][A-Za-z0-9.,+-]{0,39}|=-[0-9][0-9.,-]{0,20})?$`)
)

const maxOptions = 64

// checkOptions returns the options when all of them are harmless.
func checkOptions(options []string) ([]string, error) {
	bad := func(hint, format string, args ...any) ([]string, error) {
		return nil, &DeliveryError{"ffmpeg", "ffmpeg: " + fmt.Sprintf(format, args...), hint}
	}
	const allowed = "options that steer the encoder may be set here, such as -crf, -preset, -tune, -b:a or -x264-params; inputs, streams, filters, sizes, rates, tags and files are fairframe's own"
	if len(options) > maxOptions {
		return bad("", "%d words, at most %d are allowed", len(options), maxOptions)
	}
	for i := 0; i < len(options); i += 2 {
		m := optionForm.FindStringSubmatch(options[i])
		switch {
		case m == nil && !strings.HasPrefix(options[i], "-"):
			return bad("write each option followed by its value, such as [-crf, 20]", "%q is no option", options[i])
		case m == nil:
			return bad(allowed, "the option %q may not be set", options[i])
		case i+1 == len(options):
			return bad("write each option followed by its value, such as [-crf, 20]", "the option %s has no value", options[i])
		}
		name, value := m[1], options[i+1]
		switch {
		case graph.IsParams(name) && m[2] == "":
			for _, p := range strings.Split(value, ":") {
				key, _, _ := strings.Cut(p, "=")
				if !paramForm.MatchString(p) || paramFiles.MatchString(strings.ToLower(key)) {
					return bad("parameters that open files, or that say what the pictures are, may not be set", "%s: the parameter %q may not be set", options[i], p)
				}
			}
		case !slices.Contains(plainOptions, name):
			return bad(allowed, "the option %s may not be set", options[i])
		case !valueForm.MatchString(value):
			return bad("a value is a number or a word", "%s: the value %q is not allowed", options[i], value)
		}
	}
	return slices.Clone(options), nil
}
