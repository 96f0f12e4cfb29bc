# Completion of fairframe's commands for fish.
function __fairframe_words
    set -l words (commandline -opc) (commandline -ct)
    set -l program $words[1]
    set -e words[1]
    $program __complete $words 2>/dev/null
end
complete -c fairframe -n '__fairframe_words | string length -q' -f
complete -c fairframe -a '(__fairframe_words)'
