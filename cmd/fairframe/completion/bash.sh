# Completion of fairframe's commands for bash.
_fairframe() {
	local line cur=${COMP_WORDS[COMP_CWORD]} typed=${COMP_LINE:0:COMP_POINT}
	local -a words
	read -ra words <<<"$typed"
	[[ $typed == *[[:space:]] ]] && words+=("")
	# Bash parts words at = and :, the program reads them whole.
	[[ $cur == [=:] ]] && cur=
	local parted=${words[${#words[@]}-1]}
	parted=${parted%"$cur"}
	COMPREPLY=()
	while IFS= read -r line; do
		line=${line%%$'\t'*}
		COMPREPLY+=("$(printf '%q' "${line#"$parted"}")")
	done < <("${words[0]}" __complete "${words[@]:1}" 2>/dev/null)
}
complete -o default -F _fairframe fairframe
