#compdef fairframe
# Completion of fairframe's commands for zsh.
_fairframe() {
	local line word
	local -a found
	while IFS= read -r line; do
		word=${line%%$'\t'*}
		if [[ $line == *$'\t'?* ]]; then
			found+=("${word//:/\\:}:${line#*$'\t'}")
		else
			found+=("${word//:/\\:}")
		fi
	done < <("${(Q)words[1]}" __complete "${(@Q)words[2,CURRENT]}" 2>/dev/null)
	if (( $#found )); then
		_describe 'fairframe' found
	else
		_files
	fi
}
if [ "$funcstack[1]" = _fairframe ]; then
	_fairframe
else
	compdef _fairframe fairframe
fi
